"""STEP files (ISO 10303-21): named solids, millimetres, one assembly a file."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wingpath.core.errors import FileAccessError
from wingpath.version import __version__

__all__ = ["write_step"]

LONGEST_NAME = 60
"""Names are cut after this many characters: longer ones would be broken over two lines of the file."""

NO_DATE = "1970-01-01T00:00:00"
"""The date in the head: the file does not depend on the day."""


PROBE_BYTES = 1_000_000
"""More than a disk has left on which the rest of a file found no room."""


def write_step(path: Path, shapes: Mapping[str, Any], *, title: str) -> None:
    """Write solids as the parts of one assembly.

    Curves in the parameters of surfaces are left out: every CAD program makes its own, and without them the
    file is less than half as large.

    Parameters
    ----------
    path : Path
        The file.
    shapes : mapping of str to Shape
        Solids of the kernel by the names of their products.
    title : str
        Name of the assembly.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_StepModelType
    from OCP.TCollection import TCollection_HAsciiString

    _hush()
    document = _document(shapes, title)
    writer = STEPCAFControl_Writer()
    writer.SetNameMode(True)
    writer.SetColorMode(False)
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetCVal_s("write.step.product.name", _ascii(title))
    writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs)
    head = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
    head.SetName(TCollection_HAsciiString(path.name))
    head.SetTimeStamp(TCollection_HAsciiString(NO_DATE))
    head.SetOriginatingSystem(TCollection_HAsciiString(f"wingpath {__version__}"))
    head.SetAuthorValue(1, TCollection_HAsciiString(""))
    head.SetOrganizationValue(1, TCollection_HAsciiString(""))
    head.SetAuthorisation(TCollection_HAsciiString(""))
    if writer.Write(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise FileAccessError(f"{path}: could not be written") from _why_not(path)


def _why_not(path: Path) -> OSError | None:
    """Return what keeps a file from being written: the kernel says only that it could not."""
    try:
        with path.open("ab") as stream:
            stream.write(bytes(PROBE_BYTES))
    except OSError as error:
        return error
    return None


def _document(shapes: Mapping[str, Any], title: str) -> Any:
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    top = tool.NewShape()
    TDataStd_Name.Set_s(top, TCollection_ExtendedString(_ascii(title)))
    for name, shape in shapes.items():
        label = tool.AddShape(shape, False)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(_ascii(name)))
        part = tool.AddComponent(top, label, TopLoc_Location())
        TDataStd_Name.Set_s(part, TCollection_ExtendedString(_ascii(name)))
    tool.UpdateAssemblies()
    return document


def _hush() -> None:
    """Keep the kernel from printing its statistics on stdout."""
    from OCP.Message import Message, Message_Gravity

    for printer in Message.DefaultMessenger_s().Printers():
        printer.SetTraceLevel(Message_Gravity.Message_Fail)


def _ascii(name: str) -> str:
    """Return a name that every reader takes: plain characters, no quotes, backslashes or line ends."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    kept = "".join(c if c.isprintable() and c not in "'\"\\" else "_" for c in plain).strip()
    return kept[:LONGEST_NAME] or "wing"
