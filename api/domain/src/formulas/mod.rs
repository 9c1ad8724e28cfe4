//! Engineering and statistics that know nothing of a fleet: plain numbers in, plain numbers out.

pub mod interval;
