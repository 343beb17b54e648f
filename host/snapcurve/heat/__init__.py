"""Heat and mass balance of a bowl of chocolate: numbers only."""
