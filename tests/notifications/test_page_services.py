"""Services that are added on a page: in the owner's file, of which nothing else changes."""

from pathlib import Path

import pytest

from monitor.notifications import add_service, added_services, drop_service, load_notice_settings
from monitor.notifications.channels.apprise import AppriseChannel
from monitor.notifications.channels.channel import Message
from monitor.notifications.page_services import TakenNameError
from monitor.notifications.repeat import Notice
from monitor.notifications.settings import NoticeSettingsError, Service
from monitor.notifications.store import NoticeFileError, settings_path
from tests.notifications.catchers import post_catcher

OWN = 'again_minutes = [5]  # mine\n[[service]]\nname = "Mail"\nurl = "mailtos://a:b@mail.example"'


def owned(folder: Path, text: str = OWN, mode: int = 0o600) -> Path:
    path = settings_path(folder)
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    path.chmod(mode)
    return path


def test_a_service_is_added_to_what_its_owner_wrote_and_taken_away_again(tmp_path: Path) -> None:
    path = owned(tmp_path)
    add_service(tmp_path, "Phone", "push://push.example/öΩ-𝕏")
    assert path.read_text(encoding="utf-8").startswith(OWN + "\n") and path.stat().st_mode & 0o777 == 0o600
    assert added_services(tmp_path) == (Service("Phone", "push://push.example/öΩ-𝕏", brief=True),)
    assert [one.name for one in load_notice_settings(tmp_path).services] == ["Mail", "Phone"]
    assert not drop_service(tmp_path, "Mail")
    assert drop_service(tmp_path, "Phone") and not drop_service(tmp_path, "Phone")
    assert path.read_text(encoding="utf-8") == OWN + "\n"


def test_the_file_is_made_for_its_owner_alone(tmp_path: Path) -> None:
    add_service(tmp_path, "Phone", "push://push.example/x")
    path = settings_path(tmp_path)
    assert (path.stat().st_mode & 0o777, path.parent.stat().st_mode & 0o777) == (0o600, 0o700)


@pytest.mark.parametrize(
    ("name", "url"),
    [
        ("", "push://x"),
        ('"]\nrun = 1', "push://x"),
        ("a" * 41, "push://x"),
        ("Phone", "no address"),
        ("Phone", "a://\n"),
    ],
)
def test_what_would_make_the_file_wrong_is_refused_and_changes_nothing(tmp_path: Path, name: str, url: str) -> None:
    path = owned(tmp_path)
    with pytest.raises(NoticeSettingsError):
        add_service(tmp_path, name, url)
    assert path.read_text(encoding="utf-8") == OWN


def test_a_name_that_is_taken_and_a_file_that_others_may_read_are_refused(tmp_path: Path) -> None:
    path = owned(tmp_path)
    with pytest.raises(TakenNameError, match="“Mail”"):
        add_service(tmp_path, "Mail", "push://push.example/x")
    path.chmod(0o644)
    with pytest.raises(NoticeFileError, match="chmod 600"):
        add_service(tmp_path, "Phone", "push://push.example/x")
    assert path.read_text(encoding="utf-8") == OWN


def test_a_folder_that_is_away_is_not_made_again(tmp_path: Path) -> None:
    with pytest.raises(NoticeFileError):
        add_service(tmp_path / "away", "Phone", "push://push.example/x")
    assert not (tmp_path / "away").exists()


def test_a_brief_service_is_told_the_name_alone(tmp_path: Path) -> None:
    message = Message("cooker", Notice("paste cold", "The paste is at 56.2 °C since 14:05.", 1_773_480_000.0))
    with post_catcher() as catcher:
        AppriseChannel(Service("Phone", f"json://127.0.0.1:{catcher.port}/", brief=True)).send(message)
        (told,) = catcher.posts
    assert (told["title"], told["message"]) == ("cooker: paste cold", "kettleside says more.")
    assert "56" not in str(told) and "14:05" not in str(told)
