"""Circuits with transistors: bias, two-ports with noise, third-order products, class A limits."""
