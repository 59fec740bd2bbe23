"""The domain: pure, frozen data and its arithmetic. No input, output, clock or chance."""
