"""Heat and mass balance of a bowl of chocolate: pure functions, no input or output."""
