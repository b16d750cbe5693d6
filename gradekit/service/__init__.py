"""What a service asks of a steel, criterion by criterion."""
