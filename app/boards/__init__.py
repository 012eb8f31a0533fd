"""Boards and panels on screen and on paper."""
