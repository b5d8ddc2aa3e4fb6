"""How a store of each version becomes one of the next; carried in the wheel, run on opening, after a backup."""
