"""What pictures are made of: style, the figure object, placing of labels, marks, layers."""
