"""The parts of the figure: curves, contours, regions, strokes, hands and looks."""
