"""What happens by the dog bed, from home to home, without a screen."""
