//! The test harness: servers on free ports, factories through the API.

pub mod demo_fleet;
