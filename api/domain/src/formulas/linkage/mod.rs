//! Servo, rod and horn in one plane, and what they do to a hinged surface.
//!
//! * [`four_bar`]: the bare four-bar, both branches · [`geometry`]: arm, rod, horn and hinge solved both ways
//! * [`travel`]: dead points on either side of neutral · [`throws`]: angles and mm at the trailing edge
//! * [`play`]: free play at the trailing edge · [`tolerance`]: how sure a computed deflection is
//! * [`flap_derivatives`]: thin-aerofoil theory · [`load`]: torque, rod force, speed limit
//! * [`mismatch`]: left against right · [`proposal`]: sizes for wanted throws
//! * [`fit`]: geometry from measured throws · [`parameter`]: the numbers by name
//!
//! Signs: x aft, z up, flap down positive; the arm's angle and the servo's angle positive with the arm's end aft.
//! Play out of the plane, flexing rods and servo geometry before its output shaft are not known here.

pub mod error;
pub mod fit;
pub mod flap_derivatives;
pub mod four_bar;
pub mod geometry;
pub mod load;
pub mod mismatch;
pub mod parameter;
pub mod play;
pub mod proposal;
pub mod throws;
pub mod tolerance;
pub mod travel;
mod triangle;

pub use error::LinkageError;
