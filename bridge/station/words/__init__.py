"""What people say of animals: done, and taken back."""
