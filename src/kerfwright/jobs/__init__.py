"""One function for each errand, run in a worker of its own."""
