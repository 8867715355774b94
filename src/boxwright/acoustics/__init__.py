"""Small signal: elements, loads of a cone, response, coupled chambers, filters and placement."""
