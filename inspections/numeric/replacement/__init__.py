"""When it is cheapest to change a thing by its age: plain numbers and arrays, without Django."""
