"""What a formula comes to at the bench: pouring, batches, costs, labels."""
