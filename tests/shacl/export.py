"""The bus graph of a job as RDF: what is installed and how it is wired, and nothing that follows from it."""

from typing import Final

from rdflib import RDF, Graph, Literal, Namespace, URIRef

from ventrules.job import Job, Role

V: Final = Namespace("urn:bus-graph:")
JOB: Final = URIRef("urn:job")
WITHOUT_LIMIT: Final = 1_000_000

_CLASSES: Final = {
    Role.CONTROLLER: V.Controller,
    Role.VENTILATOR: V.Ventilator,
    Role.INTERFACE_MODULE: V.InterfaceModule,
    Role.ZONE_PANEL: V.ZonePanel,
}


def bus_graph(job: Job) -> Graph:
    """Return devices, ports and cables; each node of a cable, `urn:cable:2`, is called by its number in the job."""
    graph = Graph()
    graph.add((JOB, RDF.type, V.Job))
    ports: dict[str, URIRef] = {}
    for number, (name, device) in enumerate(sorted(job.devices.items())):
        model, node = job.catalog.models[device.model], URIRef(f"urn:device:{number}")
        graph.add((JOB, V.device, node))
        graph.add((node, RDF.type, V.Device))
        graph.add((node, RDF.type, _CLASSES.get(model.role, V.Device)))
        graph.add((node, V.name, Literal(name)))
        graph.add((node, V.takes, Literal(WITHOUT_LIMIT if model.ventilators is None else model.ventilators)))
        if model.role is Role.VENTILATOR and name in job.settings and job.settings[name].programs:
            graph.add((node, RDF.type, V.Programmed))
        for order, (port_name, port) in enumerate(sorted(model.ports.items())):
            end = ports[f"{name}.{port_name}"] = URIRef(f"urn:port:{number}:{order}")
            graph.add((node, V.port, end))
            graph.add((end, V.name, Literal(f"{name}.{port_name}")))
            graph.add((end, V.kind, V[port.bus.value]))
            for dialect in port.dialects:
                graph.add((end, V.understands, Literal(dialect)))
    for number, cable in enumerate(job.cables):
        node = URIRef(f"urn:cable:{number}")
        graph.add((node, RDF.type, V.Cable))
        graph.add((node, V.end, ports[cable.start]))
        graph.add((node, V.end, ports[cable.end]))
    return graph
