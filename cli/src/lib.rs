//! The Preen command line as a library: `run(args, io) -> exit code`.
