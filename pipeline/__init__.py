"""manyfields: replicated nitrogen trials, from harvest sheets to claims that hold up."""
