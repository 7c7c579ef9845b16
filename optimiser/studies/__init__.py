"""Many questions, or many recipes, looked at together."""
