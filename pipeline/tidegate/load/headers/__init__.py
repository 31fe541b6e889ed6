"""One file a picture format: facts from its header, and whether the file is whole. No pixel is decoded here."""
