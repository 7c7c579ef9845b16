"""What a composition implies: properties of ingredients and how they mix."""
