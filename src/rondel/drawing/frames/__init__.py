"""What every frame of the video shows, as drawing and arithmetic only: no pixels are made here."""
