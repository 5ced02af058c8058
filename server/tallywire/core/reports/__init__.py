"""What is printed: results as rows, and scoresheets."""
