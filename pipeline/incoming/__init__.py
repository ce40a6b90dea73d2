"""Delivered files to rows of text; decides nothing about their meaning."""
