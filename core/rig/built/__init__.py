"""Stages as they came out against what was designed: verdicts of measured curves, parts behind them."""
