//! Routes of photos.

use preen_domain::facts::Photo;

record_routes! {
    Photo, "photos",
    list list_photos "/photos" "Lists photos.",
    find find_photo "/photos/{id}" "Finds a photo by id.",
    add add_photo "/photos" "Records a photo, whose picture was sent before.",
    correct correct_photo "/photos/{id}/correction" "Corrects a photo, or says that it never was.",
}
