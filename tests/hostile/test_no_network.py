"""Whatever a terrain folder names, no network is asked: a listener on this machine stays silent."""

from __future__ import annotations

import socket
import threading
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.errors import InputProblem
from reach.terrain.clutter import LandCover
from reach.terrain.tiles import Terrain


class Listener:
    """Counts whoever connects; answers nothing."""

    def __init__(self) -> None:
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.address = f"127.0.0.1:{self.socket.getsockname()[1]}"
        self.asked = 0
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        while True:
            try:
                caller, _ = self.socket.accept()
            except OSError:
                return
            self.asked += 1
            caller.close()

    def close(self) -> None:
        self.socket.close()


@pytest.fixture
def listener(monkeypatch: pytest.MonkeyPatch) -> Iterator[Listener]:
    found = Listener()
    for name in ("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("AWS_NO_SIGN_REQUEST", "YES")
    monkeypatch.setenv("AWS_S3_ENDPOINT", found.address)
    monkeypatch.setenv("AWS_HTTPS", "NO")
    monkeypatch.setenv("AWS_VIRTUAL_HOSTING", "FALSE")
    yield found
    found.close()


def good(path: Path, *, dtype: str = "int16") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    with rasterio.open(
        path, "w", driver="GTiff", width=64, height=64, count=1, dtype=dtype, crs="EPSG:4326",
        transform=from_origin(-72.0, 42.0, 0.01, 0.01),
    ) as data:  # fmt: skip
        data.write(np.full((64, 64), 50, dtype=dtype), 1)
        data.set_band_unit(1, "m")
    return path


def view(source: str, *, kind: str = "SimpleSource", dtype: str = "Int16", more: str = "") -> str:
    escaped = source.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    return (
        '<VRTDataset rasterXSize="64" rasterYSize="64"><SRS>EPSG:4326</SRS>'
        "<GeoTransform>-72,0.01,0,42,0,-0.01</GeoTransform>"
        f'<VRTRasterBand dataType="{dtype}" band="1"><UnitType>m</UnitType><{kind}>'
        f'<SourceFilename relativeToVRT="0">{escaped}</SourceFilename><SourceBand>1</SourceBand>'
        '<SrcRect xOff="0" yOff="0" xSize="64" ySize="64"/><DstRect xOff="0" yOff="0" xSize="64" ySize="64"/>'
        f"</{kind}>{more}</VRTRasterBand></VRTDataset>"
    )


def service(address: str) -> str:
    return (
        f'<GDAL_WMS><Service name="TMS"><ServerUrl>http://{address}/${{z}}/${{x}}/${{y}}.tif</ServerUrl></Service>'
        "<DataWindow><UpperLeftX>-72</UpperLeftX><UpperLeftY>42</UpperLeftY><LowerRightX>-71.36</LowerRightX>"
        "<LowerRightY>41.36</LowerRightY><SizeX>64</SizeX><SizeY>64</SizeY><TileLevel>0</TileLevel>"
        "<YOrigin>top</YOrigin></DataWindow><Projection>EPSG:4326</Projection><BlockSizeX>64</BlockSizeX>"
        "<BlockSizeY>64</BlockSizeY><BandsCount>1</BandsCount><DataType>Int16</DataType></GDAL_WMS>"
    )


CASES: dict[str, Callable[[Path, str], object]] = {
    name: (lambda folder, address, form=form: (folder / "a.vrt").write_text(view(form.format(address))))
    for name, form in {
        "http": "http://{0}/a.tif",
        "https": "https://{0}/a.tif",
        "ftp": "ftp://{0}/a.tif",
        "vsicurl": "/vsicurl/http://{0}/a.tif",
        "vsicurl with the allowed ending": "/vsicurl/http://{0}/a.tif?x=.offline",
        "vsicurl with options": "/vsicurl?url=http%3A%2F%2F{0}%2Fa.tif",
        "vsicurl_streaming": "/vsicurl_streaming/http://{0}/a.tif",
        "s3": "/vsis3/bucket/a.tif",
        "a zip on the web": "/vsizip//vsicurl/http://{0}/a.zip/a.tif",
        "a zip on the web in braces": "/vsizip/{{/vsicurl/http://{0}/a.zip}}/a.tif",
        "a cached file": "/vsicached?file=/vsicurl/http://{0}/a.tif",
        "a part of a file": "/vsisubfile/0_100,/vsicurl/http://{0}/a.tif",
        "netCDF from a server": "NETCDF:http://{0}/a.nc:z",
        "a map service by name": "WMS:http://{0}/?SERVICE=WMS&REQUEST=GetMap",
        "a coverage service by name": "WCS:http://{0}/?",
        "a catalogue": 'STACTA:"http://{0}/a.json"',
    }.items()
}  # fmt: skip


def case(build: Callable[[Path, str], object]) -> Callable[[Path, str], object]:
    CASES[build.__name__] = build
    return build


@case
def a_map_service_named_as_a_tile(folder: Path, address: str) -> None:
    for suffix in ("tif", "vrt", "img", "asc", "hgt", "xyz", "nc"):
        (folder / f"N41W072.{suffix}").write_text(service(address))


@case
def a_map_service_without_a_suffix(folder: Path, address: str) -> None:
    (folder / "noext").write_text(service(address))


@case
def a_map_service_within_a_vrt(folder: Path, address: str) -> None:
    (folder / "a.vrt").write_text(view(service(address)))


@case
def a_map_service_that_a_vrt_names(folder: Path, address: str) -> None:
    (folder.parent / "service.xml").write_text(service(address))
    (folder / "a.vrt").write_text(view(str(folder.parent / "service.xml")))


@case
def a_map_service_padded_to_a_radar_tile(folder: Path, address: str) -> None:
    text = service(address).encode()
    (folder.parent / "N41W072.hgt").write_bytes(text + b" " * (1201 * 1201 * 2 - len(text)))
    (folder / "a.vrt").write_text(view(str(folder.parent / "N41W072.hgt")))


@case
def a_map_service_behind_blanks(folder: Path, address: str) -> None:
    (folder.parent / "N41W072.bil").write_text(" " * 100 + service(address))
    (folder.parent / "N41W072.hdr").write_text("ncols 64\nnrows 64\nnbits 16\n")
    (folder / "a.vrt").write_text(view(str(folder.parent / "N41W072.bil")))


@case
def a_mask_beside_a_tile(folder: Path, address: str) -> None:
    good(folder / "a.tif")
    (folder / "a.tif.msk").write_text(view(f"/vsicurl/http://{address}/a.tif", dtype="Byte"))


@case
def an_overview_beside_a_tile(folder: Path, address: str) -> None:
    good(folder / "a.tif")
    (folder / "a.tif.ovr").write_text(view(f"/vsicurl/http://{address}/a.tif"))


@case
def a_description_beside_a_tile(folder: Path, address: str) -> None:
    good(folder / "a.tif")
    (folder / "a.tif.aux.xml").write_text(
        '<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">'
        f"/vsicurl/http://{address}/a.tif</MDI></Metadata></PAMDataset>"
    )


@case
def a_mask_beside_what_a_vrt_names(folder: Path, address: str) -> None:
    path = good(folder.parent / "data" / "a.tif")
    (path.parent / "a.tif.msk").write_text(view(f"/vsicurl/http://{address}/a.tif", dtype="Byte"))
    (folder / "a.vrt").write_text(view(str(path)))


@case
def an_overview_within_a_vrt(folder: Path, address: str) -> None:
    path = good(folder.parent / "data" / "a.tif")
    more = f"<Overview><SourceFilename>/vsicurl/http://{address}/a.tif</SourceFilename></Overview>"
    (folder / "a.vrt").write_text(view(str(path), more=more))


@case
def a_mask_within_a_vrt(folder: Path, address: str) -> None:
    path = good(folder.parent / "data" / "a.tif")
    mask = view(f"/vsicurl/http://{address}/a.tif", dtype="Byte")
    band = mask[mask.index("<VRTRasterBand") : mask.index("</VRTDataset>")]
    text = view(str(path)).replace("</VRTDataset>", f"<MaskBand>{band}</MaskBand></VRTDataset>")
    (folder / "a.vrt").write_text(text)


@case
def a_warped_view(folder: Path, address: str) -> None:
    text = view("x").replace("<VRTDataset ", '<VRTDataset subClass="VRTWarpedDataset" ')
    options = f"<GDALWarpOptions><SourceDataset>http://{address}/a.tif</SourceDataset></GDALWarpOptions>"
    (folder / "a.vrt").write_text(text.replace("</VRTDataset>", options + "</VRTDataset>"))


@case
def a_view_of_a_view(folder: Path, address: str) -> None:
    (folder.parent / "inner.vrt").write_text(view(f"http://{address}/a.tif"))
    (folder / "a.vrt").write_text(view(str(folder.parent / "inner.vrt")))


@case
def a_view_in_a_zip(folder: Path, address: str) -> None:
    with zipfile.ZipFile(folder / "a.zip", "w") as archive:
        archive.writestr("a.vrt", view(f"http://{address}/a.tif"))
        archive.writestr("b.tif", service(address))


@case
def an_mrf_description(folder: Path, address: str) -> None:
    (folder / "a.tif").write_text(
        f"<MRF_META><CachedSource><Source>http://{address}/a.tif</Source></CachedSource>"
        '<Raster><Size x="64" y="64"/></Raster></MRF_META>'
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "tiles"
    made.mkdir()
    return made


@pytest.mark.parametrize("name", CASES)
def test_tiles_ask_nobody(name: str, folder: Path, listener: Listener) -> None:
    CASES[name](folder, listener.address)
    try:
        with Terrain.open([folder]) as terrain:
            terrain.sample(np.linspace(41.4, 41.99, 50), np.linspace(-71.99, -71.4, 50))
    except InputProblem as problem:
        assert all(line.isprintable() for line in str(problem).splitlines())
    assert listener.asked == 0


@pytest.mark.parametrize("name", CASES)
def test_land_cover_asks_nobody(name: str, folder: Path, listener: Listener) -> None:
    CASES[name](folder, listener.address)
    for path in sorted(folder.iterdir()):
        try:
            with LandCover(path) as cover:
                cover.codes(np.linspace(41.4, 41.99, 50), np.linspace(-71.99, -71.4, 50))
        except InputProblem:
            pass
    assert listener.asked == 0


def test_the_listener_would_have_noticed(listener: Listener) -> None:
    host, port = listener.address.split(":")
    with socket.create_connection((host, int(port))) as caller:
        caller.settimeout(5.0)
        assert caller.recv(1) == b""
    assert listener.asked == 1


def test_gdal_left_alone_would_ask(folder: Path, listener: Listener) -> None:
    (folder / "a.vrt").write_text(view(f"http://{listener.address}/a.tif"))
    with pytest.raises(rasterio.errors.RasterioError), rasterio.open(folder / "a.vrt") as data:
        data.read(1)
    assert listener.asked >= 1
