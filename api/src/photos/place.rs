//! Where pictures are to be kept, as the settings say it. The environment is read in `config`.

use std::path::PathBuf;

use crate::db::conn::Place;

/// Where pictures are kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PhotoPlace {
    /// A folder.
    Folder(PathBuf),
    /// A bucket of a store that speaks S3.
    Bucket {
        /// `s3://BUCKET` or `s3://BUCKET/PREFIX`.
        url: String,
        /// Region, endpoint, keys and so on, by the names that such stores usually have in the environment (`AWS_…`).
        settings: Vec<(String, String)>,
    },
}

/// Why pictures cannot be kept where the settings say.
#[derive(Debug, thiserror::Error)]
pub enum PlaceError {
    /// Nothing says where.
    #[error(
        "with the records on a server, say where photos are kept: --photos FOLDER, or --photos s3://BUCKET/PREFIX \
         (or PREEN_PHOTOS)"
    )]
    Missing,
    /// Neither a folder nor a bucket.
    #[error("photos cannot be kept in `{0}`: name a folder, or s3://BUCKET/PREFIX")]
    Unknown(String),
    /// It is there but cannot be used.
    #[error(
        "photos cannot be kept in {0}: {1}. Check --photos (PREEN_PHOTOS), and for a bucket the AWS_… settings"
    )]
    Unusable(String, String),
}

impl PhotoPlace {
    /// Reads a setting; `settings` go with a bucket.
    pub fn from_setting(text: &str, settings: Vec<(String, String)>) -> Result<Self, PlaceError> {
        match text.split_once("://") {
            Some(("s3", rest)) if !rest.is_empty() && !rest.starts_with('/') => {
                Ok(Self::Bucket { url: text.to_owned(), settings })
            }
            Some(_) => Err(PlaceError::Unknown(text.to_owned())),
            None if text.is_empty() => Err(PlaceError::Unknown(text.to_owned())),
            None => Ok(Self::Folder(PathBuf::from(text))),
        }
    }

    /// Where they are kept if nothing else is said: in the folder `photos` beside the embedded database.
    pub fn beside(records: &Place) -> Result<Self, PlaceError> {
        match records {
            Place::File(file) => Ok(Self::Folder(file.with_file_name("photos"))),
            Place::Server(_) => Err(PlaceError::Missing),
        }
    }
}

impl std::fmt::Display for PhotoPlace {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Folder(folder) => folder.display().fmt(f),
            Self::Bucket { url, .. } => f.write_str(url),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_setting_is_a_folder_or_a_bucket() {
        let read = |text: &str| PhotoPlace::from_setting(text, Vec::new());
        assert_eq!(read("data/photos").unwrap(), PhotoPlace::Folder("data/photos".into()));
        assert!(matches!(read("s3://shed/photos").unwrap(), PhotoPlace::Bucket { .. }));
        for bad in ["", "s3://", "s3:///photos", "ftp://shed/photos"] {
            assert!(matches!(read(bad), Err(PlaceError::Unknown(_))), "{bad}");
        }
        let beside = PhotoPlace::beside(&Place::File("data/preen.db".into())).unwrap();
        assert_eq!(beside, PhotoPlace::Folder("data/photos".into()));
        let server = Place::Server("postgres://localhost/preen".to_owned());
        assert!(matches!(PhotoPlace::beside(&server), Err(PlaceError::Missing)));
    }
}
