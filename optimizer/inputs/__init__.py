"""What users type and what the book holds, as frozen, checked values."""
