"""The verbs of the command line, one file each: options to one service, its result to text or JSON."""
