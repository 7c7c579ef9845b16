"""The workbench: a page on which limits move and the answer follows."""
