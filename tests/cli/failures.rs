//! What goes wrong between the program and a service: one sentence, one hint, the right exit code.

use crate::demo::Demo;
use crate::preen::Preen;
use crate::responder::Responder;

#[test]
fn a_service_that_is_not_there_is_5() {
    // A port that was free a moment ago and that nothing listens on.
    let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let said = Preen::at(&format!("http://{free}"), "t").run("may-fly").code(5);
    assert_eq!(said.stdout, "");
    assert!(said.stderr.starts_with(&format!("error: http://{free}/ does not answer: Connection refused")));
    said.talks("hint: Is the service running there?");
}

#[test]
fn a_busy_service_is_5_and_says_when_to_try_again() {
    let problem =
        r#"{"type":"urn:preen:problem:busy","title":"Busy","status":503,"detail":"x","code":"busy"}"#;
    let headers = "Content-Type: application/problem+json\r\nRetry-After: 7\r\n";
    let busy = Responder::http("503 Service Unavailable", headers, problem);
    Preen::at(&busy.url(), "t").run("due").code(5).talks("Try again in 7 seconds");
    let proxy = Responder::http("503 Service Unavailable", "Content-Type: text/html\r\n", "<p>down</p>");
    Preen::at(&proxy.url(), "t").run("due").code(5).talks("Try again in a moment");
}

#[test]
fn an_answer_without_sense_is_5() {
    for (status, kind, body) in [
        ("200 OK", "text/html", "<html>Welcome</html>"),
        ("200 OK", "application/json", "{\"models\": 7"),
        ("200 OK", "application/json", "[]"),
        ("500 Internal Server Error", "text/plain", "oh"),
        ("404 Not Found", "text/html", "<p>no</p>"),
        ("418 I'm a teapot", "application/json", "{}"),
    ] {
        let odd = Responder::http(status, &format!("Content-Type: {kind}\r\n"), body);
        let said = Preen::at(&odd.url(), "t").run("may-fly --json").code(5);
        assert_eq!(said.stdout, "", "{status} {body}");
        said.talks("error: What answers there is not a Preen service");
    }
    let broken = Responder::new("not even HTTP");
    Preen::at(&broken.url(), "t").run("may-fly").code(5).talks("does not answer");
}

#[test]
fn a_service_that_sends_elsewhere_is_not_followed_with_the_token() {
    let other = Responder::http("200 OK", "Content-Type: application/json\r\n", "{}");
    let headers = format!("Location: {}/api/v1/may-fly\r\n", other.url());
    let first = Responder::http("302 Found", &headers, "");
    Preen::at(&first.url(), "t").run("may-fly").code(5).talks("it sends elsewhere");
    assert_eq!(other.heads(), Vec::<String>::new());
    assert!(first.heads()[0].contains("authorization: Bearer t"));
}

#[test]
fn a_service_that_never_ends_is_left() {
    // Said to be of any length, and broken off; deeper than any answer; of letters that no text has.
    let head = "HTTP/1.1 200 OK\r\nConnection: close\r\nContent-Type: application/json\r\n";
    for odd in [
        format!("{head}Content-Length: 99999999999\r\n\r\n{{"),
        format!("{head}\r\n{}", "[".repeat(200_000)),
        format!("{head}Transfer-Encoding: chunked\r\n\r\nFFFFFFFFFFFF\r\n{{"),
        format!("{head}\r\n{{\"a\":\"\\ud800\"}}"),
        format!("HTTP/1.1 200 OK\r\n{}\r\n", "X-Long: x\r\n".repeat(2_000)),
        "HTTP/1.1 100 Continue\r\n\r\n".repeat(50),
    ] {
        let service = Responder::new(&odd);
        let said = Preen::at(&service.url(), "t").run("may-fly --json").code(5);
        assert_eq!(said.stdout, "", "{}", &odd[..40]);
    }
}

#[test]
fn a_token_is_sent_in_the_clear_to_this_machine_only() {
    let said = Preen::at("http://club.example", "t").run("may-fly").code(3);
    said.talks("would send the token readable for everybody").talks("hint: Use https://");
    Preen::at("club.example", "t").run("may-fly").code(3).talks("is not the address of a service");
}

#[test]
fn access_that_is_refused_is_4() {
    let url = Demo::shared().url();
    Preen::default().env("PREEN_URL", &url).run("may-fly").code(4).is_as_expected("no_token");
    Preen::at(&url, "nonsense").run("may-fly").code(4).talks("hint: `preen login` stores another token.");
    let stranger = format!("preen_quillmarsh_{}", "a".repeat(64));
    Preen::at(&url, &stranger).run("may-fly").code(4).talks("No such token is known here");
    Preen::at(&url, "with\nline").run("may-fly").code(3).talks("characters that no token has");
}

#[test]
fn each_kind_of_failure_has_its_exit_code() {
    let preen = Demo::shared().preen("FS");
    for (line, code) in [
        ("due --model TS-01", 0),
        ("may-fly TS-01", 0),
        ("due --model TS-02 --on 2026-05-23", 1),
        ("may-fly SG-06", 1),
        ("due --on 2026-05-23", 2),
        ("may-fly --on 2026-05-23", 2),
        ("may-fly TS-03", 2),
        ("fly", 3),
        ("may-fly SG-99", 3),
        ("may-fly --on yesterday", 3),
        ("flights add model=SG-01", 3),
        ("swap SG-04 W.C/FS.L SV08-B016 --reason over_limit --preview", 4),
        ("--url http://127.0.0.1:1 due", 5),
    ] {
        let said = preen.run(line);
        assert_eq!(said.code, code, "{line}\n{}{}", said.stdout, said.stderr);
        assert_eq!(said.stdout.is_empty(), code >= 3, "{line}: data and failure exclude each other");
    }
    // A model on loan may not fly for others, and may for the one it is lent to.
    preen.run("may-fly TS-03 --pilot VW").code(0);
}

#[test]
fn names_that_nobody_knows_are_mended() {
    let preen = Demo::shared().preen("FS");
    preen.run("may-fly SG-1").code(3).is_as_expected("unknown_model");
    preen.run("history SV08-BO11").code(3).talks("hint: Did you mean SV08-B011?");
    preen.run("usage JN-SG-1-L").code(3).talks("hint: Did you mean JN-SG-01-L?");
    preen.run("where --batch SV8/B").code(3).talks("hint: Did you mean SV08?");
    preen.run("may-fly --pilot elephant").code(3).talks("hint: `preen members list` shows what there is.");
    preen.run("log SG-91 9:30 soft").code(3).talks("hint: Did you mean SG-01?");
    preen.run("flights list model=SG-91").code(3).talks("hint: Did you mean SG-01?");
    preen.run("may-fli").code(3).talks("a similar subcommand exists: 'may-fly'");
    preen.run("models shw").code(3).talks("a similar subcommand exists: 'show'");
    preen.run("flights list modl=SG-01").code(3).talks("hint: Did you mean model?");
    preen.run("models show ../flights").code(3).talks("is no tag and no id");
}

#[test]
fn bad_input_is_said_before_anything_is_sent() {
    // Nothing listens there: whatever were sent would fail as unreachable.
    let preen = Preen::at("http://127.0.0.1:1", "t");
    for line in [
        "balance",
        "balance --base 1202.5",
        "balance --base NaN:96",
        "balance --base 1202.5:96 --change inf:62",
        "weigh --support 520:324.5:1:2",
        "swap SG-05 W.C/FS.L SV08-C001 W.C/FS.R --reason preventive",
        "swap SG-05 W.C/FS.L SV08-C001 --reason boredom",
        "log SG-01 9:75 soft",
        "log SG-01 9:30 rough",
        "measure SV08-B002 servo_free_play NaN deg",
        "inspect SG-01 N25 --result good",
        "inspect SG-01 N25 --result pass --item N25-02",
        "defect SG-01 awful text",
        "repair SG-01 R99 text",
        "repair SG-01 R9 filled --material 3.5",
        "flights add",
        "flights add airtime_min=NaN",
        "flights add --file /nowhere/flight.json",
        "designs correct SEDGEWING-39 --void --csv --json",
        "may-fly --as-of 2026-05-23 --on 23.5.2026",
    ] {
        preen.run(line).code(3);
    }
    Preen::at("http://127.0.0.1:1", "t").input("[1]").run("flights add --file -").code(3);
    Preen::at("http://127.0.0.1:1", "t").input("{").run("balance --file -").code(3).talks("is not JSON");
}
