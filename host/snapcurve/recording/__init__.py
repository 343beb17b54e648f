"""What a recording says: decoded, dated, phases and spans. Nothing here draws."""
