"""One function for each thing a user asks for."""
