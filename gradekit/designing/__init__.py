"""The parts of working backwards: forms, the problem, its solution, its proof and its reasons."""
