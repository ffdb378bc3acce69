"""Every public function of parts names its source, its arguments and what it returns."""

import importlib
import inspect
import pkgutil

import pytest

import studwell.parts


def public_functions():
    for info in pkgutil.iter_modules(studwell.parts.__path__, "studwell.parts."):
        module = importlib.import_module(info.name)
        for name, item in vars(module).items():
            item = inspect.unwrap(item) if callable(item) else item
            if name.startswith("_") or getattr(item, "__module__", None) != info.name:
                continue
            if inspect.isfunction(item):
                yield f"{info.name}.{name}", item
            elif inspect.isclass(item):
                for method, function in vars(item).items():
                    written_here = inspect.isfunction(function) and function.__module__ == info.name
                    if written_here and not method.startswith("_"):
                        yield f"{info.name}.{name}.{method}", function


FUNCTIONS = dict(public_functions())


def test_the_walk_finds_the_functions():
    assert len(FUNCTIONS) > 90
    assert "studwell.parts.thread.tensile_stress_area" in FUNCTIONS
    assert "studwell.parts.material.stock_material" in FUNCTIONS


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstring_names_source_and_return(name):
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    assert "Source:" in text and len(text.split("Source:")[1].strip()) > 5
    assert "returns" in text
    if "ValueError" in inspect.getsource(FUNCTIONS[name]):
        assert "raises ValueError" in text


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstring_names_every_argument_or_refers_to_a_function_that_does(name):
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    if "arguments  " in text or "other arguments" in text:
        return
    missing = [one for one in inspect.signature(FUNCTIONS[name]).parameters if one != "self" and one not in text]
    assert not missing
