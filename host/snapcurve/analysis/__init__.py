"""What a batch's record proves, and what outcomes teach."""
