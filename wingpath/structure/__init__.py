"""What a wing weighs, bears and does under load: numbers, no files."""
