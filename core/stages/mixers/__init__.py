"""Mixers as they are soldered: nodes, parts, transformers, bias."""
