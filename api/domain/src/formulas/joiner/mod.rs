//! Joiners: what a section carries, what sanding takes from it, what bends it, and how its clearance shows at the tip.
//!
//! * [`section`]: area, second moments, section moduli · [`sanding`]: loss by sanding its faces, and the life limits
//! * [`bending`]: moment at a joint, stress · [`rock`]: clearance and rock of the tip, field limits derived from it
//! * [`abrasive`]: grades of sanding paper and the guard for carbon

pub mod abrasive;
pub mod bending;
pub mod rock;
pub mod sanding;
pub mod section;
