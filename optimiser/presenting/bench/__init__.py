"""Pages for the bench: large plain figures, one screen or one printed page each."""
