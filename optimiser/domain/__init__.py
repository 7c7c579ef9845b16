"""What the program talks about: frozen values in canonical units.

No files and no solver here. Percent is by weight of the finished product unless a
name says otherwise; temperatures are in degrees Celsius, masses in kilograms.
"""
