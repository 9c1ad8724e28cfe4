//! The Preen service.
