"""Files turned wrong in every way: what is said of them, and that nothing breaks."""
