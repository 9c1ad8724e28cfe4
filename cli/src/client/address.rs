//! Where a service may be: what is an address of one, and to which of them a token may go.

use reqwest::Url;

use crate::failure::Failure;

/// The address of a service, if a token may be sent there.
pub fn check_address(text: &str) -> Result<Url, Failure> {
    let wrong = |why: &str| {
        Failure::bad_input(format!("`{text}` is not the address of a service: {why}."))
            .hint("Write it as in https://club.example or http://127.0.0.1:8026.")
    };
    let url = Url::parse(text).map_err(|error| wrong(&error.to_string()))?;
    if !url.username().is_empty() || url.password().is_some() || url.query().is_some() {
        return Err(wrong("it holds a user, a password or a question"));
    }
    match url.scheme() {
        "https" => Ok(url),
        "http" if is_loopback(&url) => Ok(url),
        "http" => Err(Failure::bad_input(format!(
            "`{text}` would send the token readable for everybody on the way."
        ))
        .hint("Use https:// for a service on another machine.")),
        _ => Err(wrong("it begins neither with https:// nor with http://")),
    }
}

/// Whether an address is of this machine.
pub fn is_loopback(url: &Url) -> bool {
    match url.host_str() {
        Some("localhost") => true,
        Some(host) => host
            .trim_start_matches('[')
            .trim_end_matches(']')
            .parse::<std::net::IpAddr>()
            .is_ok_and(|address| address.is_loopback()),
        None => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_not_sent_in_the_clear_to_another_machine() {
        assert!(check_address("http://127.0.0.1:8026").is_ok());
        assert!(check_address("http://[::1]:8026").is_ok());
        assert!(check_address("http://localhost:8026").is_ok());
        assert!(check_address("https://club.example").is_ok());
        for bad in
            ["http://club.example", "ftp://club.example", "club.example", "", "https://a:b@club.example"]
        {
            let failure = check_address(bad).unwrap_err();
            assert_eq!(failure.code(), 3, "{bad}");
        }
    }
}
