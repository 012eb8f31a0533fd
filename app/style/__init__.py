"""How the program looks and says things: colours, marks, words."""
