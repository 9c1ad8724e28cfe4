//! The Preen service: REST over the records of clubs, and the door through which they change.
//!
//! * [`config`], [`state`], [`steady`], [`server`]: settings, what requests reach, its time, start and stop.
//! * [`db`], [`audit`]: storage, the write door, the Fleet in memory, the chained trail.
//! * [`edge`]: what stands between the network and the handlers. [`access`]: who asks. [`problem`]: everything that can go wrong.
//! * [`backup`]: copies of an embedded database, and having them again.
//! * [`exchange`], [`demo`]: clubs as tables, and the one that is compiled in.
//! * [`resources`]: one folder per noun. [`answers`]: one file per question. [`sheets`]: one file per printed sheet.
//! * [`web`]: one file per page. [`told`]: moments and numbers in words.
//! * [`watch`]: numbers, log and health, for whoever keeps it running.
//! * [`desk`]: long computations, only so many at once. [`openapi`]: the description of it all. [`commands`]: what the binary does.

pub mod access;
pub mod answers;
pub mod audit;
pub mod backup;
pub mod commands;
pub mod config;
pub mod db;
pub mod demo;
pub mod desk;
pub mod edge;
pub mod exchange;
pub mod openapi;
pub mod photos;
pub mod problem;
pub mod resources;
pub mod routes;
pub mod server;
pub mod sheets;
pub mod state;
pub mod steady;
pub mod tls;
pub mod told;
pub mod watch;
pub mod web;
