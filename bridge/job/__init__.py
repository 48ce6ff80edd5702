"""What is done around the weighing: job sheet, roster, dose, withholding, draft, growth."""
