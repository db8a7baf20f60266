"""The vocabulary of the project, and text with units turned into numbers at the edge."""
