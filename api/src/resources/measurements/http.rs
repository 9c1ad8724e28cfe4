//! Routes of measurements.

use preen_domain::facts::Measurement;

record_routes! {
    Measurement, "measurements",
    list list_measurements "/measurements" "Lists measurements.",
    find find_measurement "/measurements/{id}" "Finds a measurement by id or tag.",
    add record_measurement "/measurements" "Records a reading.",
    correct correct_measurement "/measurements/{id}/correction" "Corrects a measurement, or says that it never was.",
}
