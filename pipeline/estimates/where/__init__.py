"""Where the gain is larger, and how often each rainfall class comes."""
