"""A survey of recipes as a page, as data, and as the files that are written."""
