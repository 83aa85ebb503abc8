"""What is kept of each part in service and seen from a day: clocks, dates, chances."""
