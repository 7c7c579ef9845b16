"""Formulation optimiser: ingredient amounts at least cost within every rule."""
