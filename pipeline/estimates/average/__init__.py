"""The gain over all site-years, how far the methods agree, and what it hangs on."""
