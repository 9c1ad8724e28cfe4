//! The handlers of a noun, made from one list of names, paths and sentences.
//!
//! Each is a thin translation: who asks, what is asked, and the call into [`super::entry`]. What all
//! operations have in common in the description of the interface is added in `openapi.rs`.

/// Makes the handlers of a noun.
macro_rules! record_routes {
    (
        $fact:ident, $noun:literal,
        list $list:ident $list_path:literal $list_text:literal,
        find $find:ident $find_path:literal $find_text:literal,
        add $add:ident $add_path:literal $add_text:literal,
        $third:ident $change:ident $change_path:literal $change_text:literal $(,)?
    ) => {
        use actix_web::post;

        reading_routes! { $fact, $noun, $list $list_path $list_text, $find $find_path $find_text }

        #[doc = $add_text]
        ///
        /// Fields that point at other items take an id or, where the item has one, its tag.
        #[utoipa::path(
                    tag = $noun,
                    request_body = $fact,
                    responses(
                        (status = 201, description = "Recorded.", body = preen_domain::facts::Recorded<$fact>,
                            headers(("ETag" = String, description = "Validator of this item."))),
                        (status = 200, description = "The same was recorded before; this is what is stored.",
                            body = preen_domain::facts::Recorded<$fact>),
                    )
                )]
        #[post($add_path)]
        pub async fn $add(
            state: $crate::state::Shared,
            actor: $crate::access::actor::Writer,
            body: $crate::resources::body::Body,
        ) -> Result<actix_web::HttpResponse, $crate::problem::Problem> {
            $crate::resources::entry::add::<$fact>(&state, &actor.0, stringify!($add), body.read().await?).await
        }

        changing_route! { $third $fact, $noun, $change $change_path $change_text }

        /// Registers the routes.
        pub fn routes(config: &mut $crate::routes::Routes<'_, '_>) {
            config.service($list).service($add).service($change).service($find);
        }
    };
    (
        $fact:ident, $noun:literal,
        list $list:ident $list_path:literal $list_text:literal,
        find $find:ident $find_path:literal $find_text:literal $(,)?
    ) => {
        reading_routes! { $fact, $noun, $list $list_path $list_text, $find $find_path $find_text }

        /// Registers the routes.
        pub fn routes(config: &mut $crate::routes::Routes<'_, '_>) {
            config.service($list).service($find);
        }
    };
}

/// The two reading handlers of a noun.
macro_rules! reading_routes {
    (
        $fact:ident, $noun:literal,
        $list:ident $list_path:literal $list_text:literal,
        $find:ident $find_path:literal $find_text:literal
    ) => {
        use actix_web::get;

        #[doc = $list_text]
        #[utoipa::path(
            tag = $noun,
            responses(
                (status = 200, description = "One page; the header Link leads to the next.",
                    body = $crate::resources::page::Listed<preen_domain::facts::Recorded<$fact>>,
                    headers(("Link" = String, description = "The next page (RFC 8288), if there is one."))),
            )
        )]
        #[get($list_path)]
        pub async fn $list(
            state: $crate::state::Shared,
            actor: $crate::access::actor::Reader,
            request: actix_web::HttpRequest,
            query: $crate::resources::page::Pairs,
        ) -> Result<actix_web::HttpResponse, $crate::problem::Problem> {
            $crate::resources::entry::list::<$fact>(&state, &actor.0, request.path(), query.0).await
        }

        #[doc = $find_text]
        ///
        /// What was replaced or corrected later is still there as it was, at any earlier revision.
        #[utoipa::path(
            tag = $noun,
            params(
                ("id" = String, Path, description = "Id, or tag where the noun has tags."),
                ("at_revision" = Option<i64>, Query, minimum = 0, description = "As it stood at this revision; absent: now."),
            ),
            responses(
                (status = 200, description = "The item as it stands, or stood.", body = preen_domain::facts::Recorded<$fact>,
                    headers(("ETag" = String, description = "Validator of this item."))),
            )
        )]
        #[get($find_path)]
        pub async fn $find(
            state: $crate::state::Shared,
            actor: $crate::access::actor::Reader,
            id: actix_web::web::Path<String>,
            query: $crate::resources::page::Pairs,
        ) -> Result<actix_web::HttpResponse, $crate::problem::Problem> {
            $crate::resources::entry::find::<$fact>(&state, &actor.0, &id, &query.0).await
        }
    };
}

/// The handler that changes what is there: a new version, or a correction.
macro_rules! changing_route {
    (revise $fact:ident, $noun:literal, $change:ident $path:literal $text:literal) => {
        use actix_web::put;

        #[doc = $text]
        #[utoipa::path(
            tag = $noun,
            params(
                ("id" = String, Path, description = "Id or tag."),
                ("If-Match" = String, Header, description = "The ETag of the version you have seen."),
            ),
            request_body = $fact,
            responses(
                (status = 200, description = "The new version.", body = preen_domain::facts::Recorded<$fact>,
                    headers(("ETag" = String, description = "Validator of the new version."))),
            )
        )]
        #[put($path)]
        pub async fn $change(
            state: $crate::state::Shared,
            actor: $crate::access::actor::Writer,
            id: actix_web::web::Path<String>,
            seen: $crate::resources::body::IfMatch,
            body: $crate::resources::body::Body,
        ) -> Result<actix_web::HttpResponse, $crate::problem::Problem> {
            $crate::resources::entry::revise::<$fact>(&state, &actor.0, stringify!($change), &id, seen.0, body.read().await?).await
        }
    };
    (correct $fact:ident, $noun:literal, $change:ident $path:literal $text:literal) => {
        #[doc = $text]
        ///
        /// `noun` and `original` are known from the path and may be left out.
        #[utoipa::path(
            tag = $noun,
            params(("id" = String, Path, description = "Id of the original, or its tag.")),
            request_body = preen_domain::facts::Correction,
            responses(
                (status = 201, description = "Recorded.",
                    body = preen_domain::facts::Recorded<preen_domain::facts::Correction>),
                (status = 200, description = "The same was recorded before; this is what is stored.",
                    body = preen_domain::facts::Recorded<preen_domain::facts::Correction>),
            )
        )]
        #[post($path)]
        pub async fn $change(
            state: $crate::state::Shared,
            actor: $crate::access::actor::Writer,
            id: actix_web::web::Path<String>,
            body: $crate::resources::body::Body,
        ) -> Result<actix_web::HttpResponse, $crate::problem::Problem> {
            $crate::resources::entry::correct::<$fact>(&state, &actor.0, stringify!($change), &id, body.read().await?).await
        }
    };
}
