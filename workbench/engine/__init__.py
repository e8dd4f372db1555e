"""From a lane to its margin: grid, path, pulse, equalizers, statistical eye, verdict."""
