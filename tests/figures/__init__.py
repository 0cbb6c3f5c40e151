"""`make figures`: measure, then print `name value unit`, a line each. A figure that could not be measured is absent."""
