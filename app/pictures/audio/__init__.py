"""What is shown of audio stages."""
