"""The numbers of the review: one small pure module a method, from a `Material` to plain values."""
