//! What stands between a browser and a change in somebody else's name: requests with a cookie must come from a
//! page of this service (`Origin` is the `Host` asked) and show the session's CSRF token.
//!
//! Requests with a bearer token need neither: no browser adds that header by itself.

use std::net::IpAddr;

use actix_web::HttpRequest;
use actix_web::http::header;
use subtle::ConstantTimeEq as _;

use crate::problem::Problem;

/// The header that carries the CSRF token.
pub const CSRF_HEADER: &str = "X-CSRF-Token";

/// How the service can be reached, as far as access depends on it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Reach {
    /// Browsers reach it by https, whether it encrypts itself or a proxy does.
    pub is_encrypted: bool,
    /// A proxy before the service names the address that asks in `X-Forwarded-For`.
    pub is_behind_proxy: bool,
}

/// Whether a request changes nothing by its method alone.
pub fn is_safe(request: &HttpRequest) -> bool {
    request.method().is_safe()
}

/// Refuses a request that a page of another origin sent.
pub fn check_origin(request: &HttpRequest, reach: Reach, is_needed: bool) -> Result<(), Problem> {
    let Some(origin) = request.headers().get(header::ORIGIN) else {
        return if is_needed { Err(Problem::OriginForeign) } else { Ok(()) };
    };
    // HTTP/2 has the host in its target.
    let host = match request.uri().authority() {
        Some(authority) => Some(authority.as_str()),
        None => request.headers().get(header::HOST).and_then(|host| host.to_str().ok()),
    };
    let scheme = if reach.is_encrypted { "https" } else { "http" };
    let is_own = host.is_some_and(|host| {
        origin.to_str().is_ok_and(|origin| origin.eq_ignore_ascii_case(&format!("{scheme}://{host}")))
    });
    if is_own { Ok(()) } else { Err(Problem::OriginForeign) }
}

/// Refuses a request that does not show the session's CSRF token.
pub fn check_csrf(request: &HttpRequest, expected: &str) -> Result<(), Problem> {
    let shown = request.headers().get(CSRF_HEADER).map(header::HeaderValue::as_bytes).unwrap_or_default();
    check_token(shown, expected)
}

/// Refuses a CSRF token that is not the session's, taking as long for a near miss as for a far one.
pub fn check_token(shown: &[u8], expected: &str) -> Result<(), Problem> {
    if bool::from(shown.ct_eq(expected.as_bytes())) { Ok(()) } else { Err(Problem::CsrfTokenWrong) }
}

/// The address that asks. Behind a proxy it is the last one of `X-Forwarded-For`: the proxy itself wrote that,
/// whatever a client may have put before it.
pub fn address(request: &HttpRequest, reach: Reach) -> Option<IpAddr> {
    let forwarded = || {
        let line = request.headers().get_all("X-Forwarded-For").last()?.to_str().ok()?;
        line.rsplit(',').next()?.trim().parse().ok()
    };
    let peer = || request.peer_addr().map(|peer| peer.ip());
    if reach.is_behind_proxy { forwarded().or_else(peer) } else { peer() }
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    fn check(host: &str, origin: &str, is_encrypted: bool) -> bool {
        let request = TestRequest::post()
            .insert_header(("Host", host))
            .insert_header(("Origin", origin))
            .to_http_request();
        check_origin(&request, Reach { is_encrypted, is_behind_proxy: false }, true).is_ok()
    }

    #[test]
    fn scheme_host_and_port_make_an_origin() {
        assert!(check("preen.example:8026", "http://preen.example:8026", false));
        assert!(check("preen.example", "https://Preen.example", true));
        assert!(!check("preen.example", "http://preen.example", true));
        assert!(!check("preen.example:8026", "http://preen.example:8027", false));
        assert!(!check("preen.example", "http://preen.example.evil.example", false));
        assert!(!check("preen.example", "null", false));
    }

    #[test]
    fn a_client_cannot_choose_its_address() {
        let request = TestRequest::get()
            .peer_addr("192.0.2.1:5000".parse().unwrap())
            .insert_header(("X-Forwarded-For", "198.51.100.9, 203.0.113.7"))
            .to_http_request();
        let asked = |is_behind_proxy| address(&request, Reach { is_encrypted: true, is_behind_proxy });
        assert_eq!(asked(false), "192.0.2.1".parse().ok());
        assert_eq!(asked(true), "203.0.113.7".parse().ok());
    }
}
