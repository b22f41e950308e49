"""The nouns of the program: frozen dataclasses with no behaviour beyond derived facts."""
