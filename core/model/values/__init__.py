"""What every model is made of: checked numbers, their notation, parts' references, errors."""
