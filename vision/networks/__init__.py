"""The small networks: the ONNX files and how they are run."""
