"""What the buyer asks: offers made comparable, which to take, and at what price to change one's mind."""
