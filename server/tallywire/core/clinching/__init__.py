"""What is needed: exact answers about an event inside an overall standing; start at `answers.py`."""
