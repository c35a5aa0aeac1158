"""Pieces that several tests share: made-up bikes, readings, cards and scenes."""
