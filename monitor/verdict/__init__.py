"""The verdict on scrap in words: its sentences, and what factors and levels are called."""
